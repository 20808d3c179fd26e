"""Do the fry use a place? Its share of them against its share of the room, until which age."""
