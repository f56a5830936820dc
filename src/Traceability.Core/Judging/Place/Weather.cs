using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Place;

/// <summary>
/// Weather at the pour: rate of evaporation by the customary form, and cold air. Needs: placement, weather read, sample tested. Of
/// several readings on the day of the pour every one counts. Asked only where the profile has the limits.
/// </summary>
public sealed class Weather : IRequirement
{
    private const string Most = "weather.evaporation", Coldest = "weather.air-min";

    private static readonly Citation Source = new("ACI 305R and 306R", SourceMark.Published);

    public string Id => "place.weather";
    public HoldKind Hold => HoldKind.Place;
    public string Title => "Weather at the pour";
    public IReadOnlyList<string> Limits => [Most, Coldest];

    public IEnumerable<Finding> Judge(Matter matter)
    {
        var unit = matter.File.Unit.Key;
        if (Limits.All(k => matter.Limit(k) is null)) return [Evidence.NotAsked(this, matter, unit, Most, Source)];
        var days = matter.File.Placements.Select(p => Matter.DayOf(p.Pour.Fact.StartedAt)).ToHashSet();
        if (days.Count == 0) return [Evidence.NoPlacement(this, matter, Source)];
        var readings = matter.File.Of<WeatherRead>().Where(w => w.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit) && days.Contains(Matter.DayOf(w.At.At))).ToList();
        if (readings.Count == 0)
            return [Evidence.Absent<WeatherRead>(this, matter, unit, "No weather is recorded on the day of the pour.", "The pour crew records the weather as it was read.", Source) with { Used = [matter.Profile!.Id] }];
        return readings.SelectMany(w => new[] { Air(matter, unit, w), Evaporation(matter, unit, w) }.OfType<Finding>());
    }

    private Finding? Air(Matter matter, string unit, Entry<WeatherRead> weather)
    {
        if (matter.Limit(Coldest) is not { } limit) return null;
        var air = weather.Fact.AirF;
        var met = matter.Rounded(air.Value, limit) >= limit.Value.Value;
        return matter.Against(this, $"{unit} air at {weather.At.At:HH:mm zzz}", limit, met, $"Air {air.Text} F.", air.Text + " F") with
        {
            Clear = met ? "" : "The quality engineer decides on protection and raises a nonconformance for the unit.",
            Used = [weather.Id, matter.Profile!.Id],
        };
    }

    private Finding? Evaporation(Matter matter, string unit, Entry<WeatherRead> weather)
    {
        if (matter.Limit(Most) is not { } limit) return null;
        var subject = $"{unit} evaporation at {weather.At.At:HH:mm zzz}";
        var warmest = matter.File.Samples.MaxBy(s => s.Fact.TemperatureF.Value);
        if (weather.Fact is not { HumidityPct: { Value: <= 100 } humidity, WindMph: { } wind } || warmest is null || warmest.Fact.TemperatureF.Value < 0 || weather.Fact.AirF.Value < 0)
        {
            return Matter.Finding(this, subject, Verdict.Missing, "Humidity, wind and the temperature of the concrete are needed, and one is not recorded or cannot be.", limit.Source)
                with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null, Clear = "The pour crew completes the reading, or the quality engineer decides.", Used = [weather.Id, matter.Profile!.Id] };
        }

        var rate = Concrete.Evaporation.LbFt2H(warmest.Fact.TemperatureF.Value, weather.Fact.AirF.Value, humidity.Value / 100, wind.Value);
        var met = matter.Rounded(rate, limit) <= limit.Value.Value;
        var observed = $"{Matter.Text(decimal.Round(rate, 4))} lb/ft2/h";
        return matter.Against(this, subject, limit, met, $"Concrete {warmest.Fact.TemperatureF.Text} F, air {weather.Fact.AirF.Text} F, humidity {humidity.Text} %, wind {wind.Text} mph: {observed} by the customary form.", observed) with
        {
            Clear = met ? "" : "The crew protects the surface; the inspector looks for plastic shrinkage cracks.",
            Used = [weather.Id, warmest.Id, matter.Profile!.Id],
        };
    }
}
