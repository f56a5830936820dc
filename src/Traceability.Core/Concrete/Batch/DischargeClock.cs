namespace Traceability.Core.Concrete;

/// <summary>
/// Time to discharge. The clock starts when water first meets cement, or cement damp aggregate (published). The limit of
/// 1 1/2 h is from 1933 or 1935 (sources disagree), was long joined by 300 revolutions, and left ASTM C94/C94M in April 2021:
/// since then the purchaser states a limit, else the producer; contracts that keep the old one say so.
/// </summary>
public static class DischargeClock
{
    /// <summary>Default of ASTM C94/C94M through C94-20, minutes (published).</summary>
    public const decimal DefaultMinutes = 90;

    /// <summary>Largest number of revolutions beside the default, editions before about 2014 (published).</summary>
    public const int Revolutions = 300;

    /// <summary>When the clock starts; null while neither contact is recorded.</summary>
    /// <param name="waterMetCement">First contact of mixing water and cement.</param>
    /// <param name="cementMetDampAggregate">First contact of cement and damp aggregate; null where the aggregate was dry or charged otherwise.</param>
    public static DateTimeOffset? Start(DateTimeOffset? waterMetCement, DateTimeOffset? cementMetDampAggregate) =>
        waterMetCement < cementMetDampAggregate ? waterMetCement : cementMetDampAggregate ?? waterMetCement;

    /// <summary>Limit in minutes, or null when nobody set one: then the load has none to be judged by, and its ticket is short of it.</summary>
    /// <param name="purchaserMinutes">What the contract states.</param>
    /// <param name="producerMinutes">What the producer set and printed on the ticket.</param>
    public static decimal? LimitMinutes(C94Edition edition, decimal? purchaserMinutes, decimal? producerMinutes) =>
        purchaserMinutes ?? (edition == C94Edition.Through20 ? DefaultMinutes : producerMinutes);

    /// <summary>Whether a load of the editions with revolutions was discharged in time: whichever limit came first.</summary>
    public static bool InTime(decimal minutes, int revolutions) => minutes <= DefaultMinutes && revolutions <= Revolutions;
}
