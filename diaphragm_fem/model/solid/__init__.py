"""The same wall as a solid of revolution: elasticity of any order m without a word on thin walls."""
