"""What serves the lessons: the learner's folder, and the JupyterLab that opens them."""
