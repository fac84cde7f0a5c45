"""What ears and mouth share: sound devices by name, and helper processes that may hang or die."""
