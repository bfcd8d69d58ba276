"""The plan in open formats; every writer here reads the plan and computes nothing."""
