"""A simulated scene, camera and head with known truth."""
