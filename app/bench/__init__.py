"""The live bench without Qt: conductor, snapshot store, guiding sound, sleep inhibition."""
