"""The procedure: a declarative TOML file, its checks, and the library of shipped and own ones."""
