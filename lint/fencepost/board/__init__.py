"""The board that the files describe: stackup, copper, holes, nets, components, profile, and the graph of them."""
