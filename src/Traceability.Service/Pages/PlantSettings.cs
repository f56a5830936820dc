using System.Globalization;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.Pages;

/// <summary>What the pages know of the plant: its name and its time zone, by configuration.</summary>
public sealed class PlantSettings(IConfiguration configuration, TimeProvider clock, ScenarioClock? scenario = null)
{
    public string Name { get; } = configuration["Plant:Name"] is { Length: > 0 } name ? name : "Example Precast Plant (invented)";

    private readonly TimeZoneInfo _zone = PlantZone.Of(configuration);
    private readonly PlantTime _time = PlantZone.Time(configuration);

    /// <summary>A demonstration runs on a clock that can be set.</summary>
    public bool IsScenario => scenario is not null;

    public DateTimeOffset Now => Local(clock.GetUtcNow());

    public DateOnly Today => DateOnly.FromDateTime(Now.DateTime);

    /// <summary>When a day of the plant begins.</summary>
    public DateTimeOffset StartOf(DateOnly day) => _time.StartOf(day);

    /// <summary>A moment written as the plant's clock shows it; of an hour that comes twice the later, standard one.</summary>
    public DateTimeOffset At(DateTime local) => new(DateTime.SpecifyKind(local, DateTimeKind.Unspecified), _zone.GetUtcOffset(local));

    public DateTimeOffset Local(DateTimeOffset at) => _time.Local(at);

    /// <summary>A moment as a form's field sends it, in plant time and without an offset, with the plant's offset; anything else as it is.</summary>
    public string? Moment(string? text) =>
        text is not null && DateTime.TryParseExact(text, ["yyyy-MM-dd'T'HH:mm", "yyyy-MM-dd'T'HH:mm:ss"], CultureInfo.InvariantCulture, DateTimeStyles.None, out var local)
            ? new DateTimeOffset(local, _zone.GetUtcOffset(local)).ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture) : text;

    /// <summary>A moment in plant time as a form's field wants it.</summary>
    public string Field(DateTimeOffset at) => Local(at).ToString("yyyy-MM-dd'T'HH:mm", CultureInfo.InvariantCulture);

    /// <summary>A moment in plant time, to the minute.</summary>
    public string Time(DateTimeOffset at) => Local(at).ToString("MMM d, yyyy HH:mm", CultureInfo.InvariantCulture);

    /// <summary>A moment in plant time, to the second, with the offset.</summary>
    public string Exact(DateTimeOffset at) => Local(at).ToString("MMM d, yyyy HH:mm:ss zzz", CultureInfo.InvariantCulture);

    /// <summary>A moment of the last or next days: weekday, day and time.</summary>
    public string Near(DateTimeOffset at) => Local(at).ToString("ddd MMM d, HH:mm", CultureInfo.InvariantCulture);

    public static string Day(DateOnly day) => day.ToString("ddd MMM d, yyyy", CultureInfo.InvariantCulture);
}
