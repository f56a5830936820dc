using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Core.Records;

/// <summary>
/// The clock on the plant's wall: which local time, and so which calendar day, a moment is there. Stations write their times with offsets of their own,
/// some in UTC; a day of a certificate, of a notice or of a pour is always a day of the plant.
/// </summary>
/// <param name="zone">Name of the zone in the IANA time zone database, for example "Etc/GMT+5".</param>
/// <param name="offset">The zone's offset from UTC at a moment. The database is the caller's: the core reads nothing from the machine.</param>
public sealed class PlantTime(string zone, Func<DateTimeOffset, TimeSpan> offset)
{
    private JsonSerializerOptions? _local;

    public string Zone { get; } = zone;

    /// <summary>The same moment as the plant's clock shows it.</summary>
    public DateTimeOffset Local(DateTimeOffset at) => at.ToOffset(offset(at));

    public Moment Local(Moment at) => at with { At = Local(at.At) };

    /// <summary>The same fact, every time in its content as the plant's clock shows it.</summary>
    public IFact Local(IFact fact) => FactContent.Of<DateTimeOffset>(fact).All(at => at.Offset == offset(at)) ? fact
        : (IFact)JsonSerializer.SerializeToElement(fact, fact.GetType(), FactJson.Options).Deserialize(fact.GetType(), _local ??= FactJson.With(Local))!;

    /// <summary>The plant's calendar day of a moment.</summary>
    public DateOnly DayOf(DateTimeOffset at) => DateOnly.FromDateTime(Local(at).DateTime);

    /// <summary>When a day begins at the plant. Where the clock is put forward at midnight, the first moment of the day.</summary>
    public DateTimeOffset StartOf(DateOnly day)
    {
        var midnight = new DateTimeOffset(day, TimeOnly.MinValue, TimeSpan.Zero);
        // The offset of the evening before and, if the clock was changed since, of the moment found with it.
        var found = midnight - offset(midnight.AddDays(-0.5));
        return Local(midnight - offset(found) is var better && DayOf(better) == day ? better : found);
    }
}
