"""What a judgement may point at: causes, comparisons, time; it decides nothing."""
