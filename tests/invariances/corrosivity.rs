//! Dose-response functions: rates over salt, sulphur dioxide, humidity and seasons.
