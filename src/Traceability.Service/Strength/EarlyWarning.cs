using MathNet.Numerics;
using MathNet.Numerics.Distributions;

namespace Traceability.Service.Strength;

/// <summary>What the strength at the age of acceptance may be, by the plant's own earlier breaks. Units follow the pairs.</summary>
/// <param name="Expected">The line at the early strength.</param>
/// <param name="Lower">Lower end of the prediction interval.</param>
/// <param name="Chance">Chance that the strength falls short of the design strength, 0 to 1.</param>
/// <param name="Pairs">Pairs it rests on.</param>
public sealed record Forecast(double Expected, double Lower, double Upper, double Chance, int Pairs);

/// <summary>How the forecasts would have done: each made from the pairs before it alone.</summary>
/// <param name="Forecasts">Forecasts that could be made.</param>
/// <param name="Inside">Of these, how many strengths lay inside their interval.</param>
/// <param name="Stated">The share the interval states, 0 to 1.</param>
public sealed record BackTest(int Forecasts, int Inside, double Stated)
{
    /// <summary>Share of strengths inside their interval; null without forecasts.</summary>
    public double? Coverage => Forecasts == 0 ? null : (double)Inside / Forecasts;
}

/// <summary>
/// A warning from young breaks: a line through the plant's own pairs of early and later strength, with a prediction interval
/// and the chance of falling short. For the plant's quality engineer and laboratory. It is no evidence, decides nothing and
/// never goes into a packet.
/// </summary>
public static class EarlyWarning
{
    /// <summary>Fewest pairs before anything is said. Common practice, no source.</summary>
    public const int FewestPairs = 15;

    /// <summary>Share of later strengths that the interval is to hold. Our own choice.</summary>
    public const double Level = 0.90;

    /// <summary>The forecast for an early strength; null below <see cref="FewestPairs"/> pairs or when all early strengths are one figure.</summary>
    /// <param name="pairs">Early and later strength of earlier samples.</param>
    public static Forecast? Of(IReadOnlyList<(double Early, double Later)> pairs, double early, double design, double level = Level)
    {
        if (pairs.Count < FewestPairs) return null;
        var (x, y) = (pairs.Select(p => p.Early).ToArray(), pairs.Select(p => p.Later).ToArray());
        var mean = x.Average();
        var spread = x.Sum(v => (v - mean) * (v - mean));
        if (spread <= 0) return null;
        var (intercept, slope) = Fit.Line(x, y);
        var freedom = pairs.Count - 2;
        var residual = Math.Sqrt(pairs.Sum(p => Math.Pow(p.Later - intercept - slope * p.Early, 2)) / freedom);
        var expected = intercept + slope * early;
        var deviation = residual * Math.Sqrt(1 + 1.0 / pairs.Count + (early - mean) * (early - mean) / spread);
        if (deviation <= 0) return new Forecast(expected, expected, expected, expected < design ? 1 : 0, pairs.Count);
        var half = StudentT.InvCDF(0, 1, freedom, (1 + level) / 2) * deviation;
        return new Forecast(expected, expected - half, expected + half, StudentT.CDF(0, 1, freedom, (design - expected) / deviation), pairs.Count);
    }

    /// <summary>Each pair forecast from those before it, oldest first.</summary>
    public static BackTest Test(IReadOnlyList<(double Early, double Later)> pairs, double level = Level)
    {
        var (forecasts, inside) = (0, 0);
        for (var i = FewestPairs; i < pairs.Count; i++)
        {
            if (Of([.. pairs.Take(i)], pairs[i].Early, 0, level) is not { } forecast) continue;
            forecasts++;
            if (pairs[i].Later >= forecast.Lower && pairs[i].Later <= forecast.Upper) inside++;
        }

        return new BackTest(forecasts, inside, level);
    }
}
