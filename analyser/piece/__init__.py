"""What a piece needs: counting, lengths, gauge, thread, kits, cards."""
