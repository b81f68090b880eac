"""What attempts on one device share: the job effect, integrated out of their likelihood.

Fresh chances and chances inside a job (`fresh_job`), the likelihood in plain NumPy
(`integrated_likelihood`) and as an operation of a model's graph (`likelihood_op`).
"""
