"""Strict YAML -> validated records -> one Knowledge value and a networkx graph. The only folder that reads YAML."""
