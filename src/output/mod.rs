//! Tables, charts, terminal text and safe files.
