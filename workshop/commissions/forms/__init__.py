"""The commissions room: forms by part."""
