"""What did it cost the keeper? Minutes a container and a survivor, with the survivors beside."""
