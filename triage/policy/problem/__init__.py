"""The decision problem of one unit: items, latent faults, checks, options, payoffs, forecast seam.

May import: no other folder of the policy.
"""
