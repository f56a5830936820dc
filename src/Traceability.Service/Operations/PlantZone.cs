using Traceability.Core.Records;

namespace Traceability.Service.Operations;

/// <summary>The zone of the plant's clock on the wall, Plant:TimeZone: a name in the IANA time zone database. The machine's own zone is never used.</summary>
public static class PlantZone
{
    public const string Setting = "Plant:TimeZone";

    /// <exception cref="SettingException">The setting is missing or names no zone.</exception>
    public static TimeZoneInfo Of(IConfiguration configuration)
    {
        if (configuration[Setting] is not { Length: > 0 } name)
            throw new SettingException($"{Setting} is not set. Give the name of the plant's time zone in the IANA time zone database, for example Etc/GMT+5: every day and time here is the plant's.");
        return Find(name) ?? throw new SettingException($"{Setting}: '{name}' is not a name in the IANA time zone database of this machine. Give one of its names, for example Etc/GMT+5.");
    }

    public static PlantTime Time(IConfiguration configuration)
    {
        var zone = Of(configuration);
        return new PlantTime(zone.Id, zone.GetUtcOffset);
    }

    private static TimeZoneInfo? Find(string name) => TimeZoneInfo.TryFindSystemTimeZoneById(name, out var zone) && zone.HasIanaId ? zone : null;
}
