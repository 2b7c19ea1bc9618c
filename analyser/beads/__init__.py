"""What the maker owns and what a motif needs: stock, measuring, motif, counting."""
