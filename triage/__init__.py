"""Repairability triage and quote estimator: from a wrecked handheld to a verdict, a price and a plan.

Data flow one way: record -> design matrix -> posterior -> chances -> plan -> page. Which package may
import which is written as contracts in pyproject.toml and checked by `lint-imports`.
"""
