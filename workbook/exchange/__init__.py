"""Other programs' files: MusicXML in and out."""
