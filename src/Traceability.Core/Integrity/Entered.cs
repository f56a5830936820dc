using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>A station's fact with when it happened and when it was entered.</summary>
/// <param name="Begins">The earliest time the content or the event states, corrected by the station's clock. All three are the plant's times.</param>
/// <param name="Ends">The latest that is not after the entry.</param>
/// <param name="At">When somebody entered it: of a kiosk's numbered entry its own time, however late it was delivered; of any other when it was received.</param>
internal sealed record Entered(Record Record, FactType Type, DateTimeOffset Begins, DateTimeOffset Ends, DateTimeOffset At)
{
    public string? Person => Record.Person;

    public IFact Fact => Record.Fact!;

    /// <summary>The records of stations, without decisions, corrections and what the office copies from documents.</summary>
    public static IReadOnlyList<Entered> Of(IEnumerable<Record> records, PlantTime time) =>
        [.. records.Where(r => r is { Fact: not null and not (IDecision or RecordCorrected or RecordWithdrawn), IsConflict: false }).Select(r => Of(r, time))
            .Where(e => e.Type.Role is not (Roles.QualityEngineer or Roles.AgencyInspector or Roles.Administrator))];

    public static Entered Of(Record record, PlantTime time)
    {
        var offset = TimeSpan.FromMilliseconds(record.Sent.ClockOffsetMs ?? 0);
        var occurred = record.OccurredAt.At;
        // Times the content states were read off the same clock; one after the entry is a plan, not a happening.
        var times = FactContent.Of<DateTimeOffset>(record.Fact!).Select(t => t - offset).Where(t => t <= occurred).Append(occurred).ToList();
        return new(record, FactCatalog.Of(record.Fact!), time.Local(times.Min()), time.Local(times.Max()), time.Local(record.Sent.DeviceSeq is null ? record.ReceivedAt : occurred));
    }

    /// <summary>The readings of the content, in its order.</summary>
    public IReadOnlyList<string> Readings() => [.. FactContent.Of<Reading>(Fact).Select(r => r.Text)];
}
