"""The public face: published prices, holds, and the tokens that sign them."""
