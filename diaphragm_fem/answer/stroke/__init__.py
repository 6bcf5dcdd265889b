"""The coil moved far: path, modes, stability, strength, distortion, limits."""
