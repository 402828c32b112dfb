"""Species and treatments, seeded from the handbook's tables; the shop may add its own."""
