"""The full-screen face of the program: pages, and the pure layouts behind them."""
