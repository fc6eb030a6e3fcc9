"""What the pages of exercises say."""
