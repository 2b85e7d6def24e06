"""Who keeps the count that a rate of one an hour allows; exact, by the Poisson distribution.

Run: python benchmarks/hourly_counts.py
"""

from soak.statistics.hourly import MULTIPLES, chance_passed, count_allowed

HOURS = (0.5, 1.0, 4.0, 8.0, 24.0)


def main() -> None:
    """Print the table of docs/explanation/what-a-soak-shows.md."""
    print("| hours demanded | may come | half the rate | the rate | twice | four times |")
    print("|---|---|---|---|---|---|")
    for hours in HOURS:
        allowed = count_allowed(hours)
        passes = [f"{chance_passed(allowed, times * hours):.3f}" for times in MULTIPLES]
        print(f"| {hours:g} | {allowed} | {' | '.join(passes)} |")
    parts = [chance_passed(4, times * 4.0) ** 5 for times in MULTIPLES]
    told = ", ".join(f"{passes:.3f}" for passes in parts)
    print(f"Five stretches of 4 h, each by itself, at most four in each: {told}")


if __name__ == "__main__":
    main()
