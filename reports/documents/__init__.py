"""What each verb has to say: one document for each result, shown by every renderer."""
