"""Sheets and lengths of stock, materials and prices, what to buy, and the plan to the day."""
