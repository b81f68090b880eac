"""Forecasts against outcomes: scores, calibration, baselines, the value of declining."""
