"""The preview that follows the preset while it is edited."""
