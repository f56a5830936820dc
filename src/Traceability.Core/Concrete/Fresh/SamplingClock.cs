namespace Traceability.Core.Concrete;

/// <summary>What a sample breaks.</summary>
public enum SamplingBreach { PortionsTooFarApart, TestStartedLate, MouldingStartedLate, TooSmall, TooFewPortions, EndOfLoad, OutOfOrder }

/// <summary>Times and amounts of one sample of fresh concrete; null where nobody recorded one.</summary>
/// <param name="FirstPortion">When the first portion was taken.</param>
/// <param name="LastPortion">When the last portion was taken.</param>
/// <param name="CompositeMade">When the composite was finished.</param>
/// <param name="TestsStarted">When slump or flow, temperature and air were started.</param>
/// <param name="MouldingStarted">When the first specimen was started; when moulding ended is recorded beside it.</param>
/// <param name="VolumeFt3">Volume, cubic feet, when strength specimens are made of it.</param>
/// <param name="Portions">Number of portions.</param>
/// <param name="LoadFractions">Where in the load portions were taken, 0 at its beginning, 1 at its end.</param>
public sealed record SampleTimes(
    DateTimeOffset? FirstPortion, DateTimeOffset? LastPortion, DateTimeOffset? CompositeMade, IReadOnlyList<DateTimeOffset> TestsStarted, DateTimeOffset? MouldingStarted,
    decimal? VolumeFt3 = null, int? Portions = null, IReadOnlyList<decimal>? LoadFractions = null);

/// <summary>
/// Clocks of sampling. ASTM C172/C172M, all figures published but the 15 minutes between portions (from memory). Training
/// pages disagree whether specimens are to be started or completed in 15 minutes: started is judged, completion is recorded.
/// </summary>
public static class SamplingClock
{
    /// <summary>From the first portion of a composite to the last.</summary>
    public static readonly TimeSpan Composite = TimeSpan.FromMinutes(15);

    /// <summary>From the last portion to the start of slump, temperature and air.</summary>
    public static readonly TimeSpan Tests = TimeSpan.FromMinutes(5);

    /// <summary>From the finished composite to the start of moulding.</summary>
    public static readonly TimeSpan Moulding = TimeSpan.FromMinutes(15);

    /// <summary>Least sample for strength specimens, cubic feet.</summary>
    public const decimal LeastFt3 = 1;

    /// <summary>Least number of portions, remixed.</summary>
    public const int LeastPortions = 2;

    /// <summary>Share of a load at either end from which no portion is taken.</summary>
    public const decimal EndShare = 0.10m;

    /// <summary>What the sample breaks; what nobody recorded is not judged here.</summary>
    public static IReadOnlyList<SamplingBreach> Breaches(SampleTimes sample)
    {
        var breaches = new List<SamplingBreach>();
        Check(sample.LastPortion - sample.FirstPortion, Composite, SamplingBreach.PortionsTooFarApart);
        foreach (var started in sample.TestsStarted) Check(started - sample.LastPortion, Tests, SamplingBreach.TestStartedLate);
        Check(sample.MouldingStarted - sample.CompositeMade, Moulding, SamplingBreach.MouldingStartedLate);
        if (sample.VolumeFt3 < LeastFt3) breaches.Add(SamplingBreach.TooSmall);
        if (sample.Portions < LeastPortions) breaches.Add(SamplingBreach.TooFewPortions);
        if (sample.LoadFractions?.Any(f => f < EndShare || f > 1 - EndShare) == true) breaches.Add(SamplingBreach.EndOfLoad);
        return [.. breaches.Distinct()];

        void Check(TimeSpan? took, TimeSpan most, SamplingBreach breach)
        {
            if (took < TimeSpan.Zero) breaches.Add(SamplingBreach.OutOfOrder);
            else if (took > most) breaches.Add(breach);
        }
    }
}
