using System.Globalization;
using Traceability.Core.Records;

namespace Traceability.Kiosk.Device;

/// <summary>The plant's clock: its zone comes with the papers from the service and is kept. Until they have come once it is this device's own.</summary>
public sealed class PlantClock(Browser browser, TimeProvider time)
{
    private PlantTime? _time;

    public async Task LoadAsync()
    {
        if (await browser.GetAsync<string?>("meta", "zone") is { } zone) _time = Of(zone);
    }

    public async Task KeepAsync(PlantTime plant)
    {
        if (plant.Zone == _time?.Zone) return;
        _time = plant;
        await browser.PutAsync("meta", "zone", plant.Zone);
    }

    /// <summary>The clock of a zone by its name in the IANA time zone database.</summary>
    /// <exception cref="TimeZoneNotFoundException">This device's browser does not know the zone.</exception>
    public static PlantTime Of(string zone) => new(zone, TimeZoneInfo.FindSystemTimeZoneById(zone).GetUtcOffset);

    /// <summary>Now, by this device's clock, as plant time.</summary>
    public async Task<DateTimeOffset> NowAsync()
    {
        var now = time.GetUtcNow();
        return _time is null ? now.ToOffset(await browser.OffsetAsync(now)) : _time.Local(now);
    }

    public string Near(DateTimeOffset at) => Show(at, "ddd MMM d, HH:mm");

    public string Exact(DateTimeOffset at) => Show(at, "ddd MMM d, HH:mm:ss");

    private string Show(DateTimeOffset at, string format) => (_time?.Local(at) ?? at).ToString(format, CultureInfo.InvariantCulture);
}
