"""Learning platforms that launch students and tutors here (1EdTech LTI 1.3)."""
