"""Everything that is written for others to read: files whole or not at all, marks to stake out, keep-out areas."""
