"""decide: what may be asked, recorded, treated, retested and closed next. No keys, no screen, no probabilities."""
