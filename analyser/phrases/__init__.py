"""Every sentence a person reads, made from typed values; nothing reads a sentence back."""
