"""What happens at night: receive uploads, run the workflow, report."""
