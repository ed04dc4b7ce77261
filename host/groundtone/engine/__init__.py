"""The live pipeline: a frame goes in, what the golfer is to hear comes out; without screen, keys or command line."""
