"""Forward models of parts: pure functions that never see a recording. SI within; angles in crank degrees."""
