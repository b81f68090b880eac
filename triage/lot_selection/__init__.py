"""Many devices at once: choice under limits, joint risk, the bid for a whole lot.

May import: the policy and the domain.
"""
