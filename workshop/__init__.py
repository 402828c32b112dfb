"""The gem cutter's workshop: rough in, finished stones out, every gram, hour and cent accounted for."""
