"""Sound and interchange: Standard MIDI Files and MusicXML from lines and charts."""
