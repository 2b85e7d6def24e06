"""Pure algorithms: from pictures, data and temperatures to states and numbers; no device."""
