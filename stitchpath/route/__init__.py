"""Graph to runs: parity, connection, proof, turning, order."""
