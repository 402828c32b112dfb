"""What every room stands on: hands, shop profile, fields, journal, photographs, page furniture."""
