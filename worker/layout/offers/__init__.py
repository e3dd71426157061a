"""What a plan offers, and a person decides: fewer sheets, and faces that no seam crosses."""
