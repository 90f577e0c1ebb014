"""A printer that can be made to fail: a forward model from causes to what the print shows and a person reports.

Nothing here reads the tables of causes, signs or checks: rates come from severities, physics and the thresholds
written beside them (judgement of our own, no source), so that a score against those tables means something.
"""
