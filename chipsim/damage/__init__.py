"""From strikes to risk: how fibres fail, how well that is known, the map."""
