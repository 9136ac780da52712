"""What a learner sees and touches in a notebook."""
