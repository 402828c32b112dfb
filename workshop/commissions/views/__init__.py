"""The commissions room: views by part."""
