// Numbers within bounds.
export const bounded = (value, low, high) => Math.max(low, Math.min(high, value));
