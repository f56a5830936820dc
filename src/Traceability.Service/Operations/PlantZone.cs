namespace Traceability.Service.Operations;

/// <summary>Zone of the plant's calendar days: an IANA name in Plant:TimeZone; the machine's own when none is given.</summary>
public static class PlantZone
{
    public static TimeZoneInfo Of(IConfiguration configuration) => configuration["Plant:TimeZone"] is { Length: > 0 } zone ? TimeZoneInfo.FindSystemTimeZoneById(zone) : TimeZoneInfo.Local;
}
