namespace Traceability.Service.Recording;

/// <summary>One fact as intake hands it over: its canonical bytes and what intake knows of its delivery.</summary>
/// <param name="Canonical">RFC 8785 form of the CloudEvent.</param>
/// <param name="Quarantine">Why it may not count yet; null when it may.</param>
/// <param name="TraceParent">W3C trace context of the request, so that one trace follows a fact from intake to its unit's row.</param>
public sealed record Received(byte[] Canonical, string Device, string Assurance, DateTimeOffset ReceivedAt, string? Quarantine = null, string? TraceParent = null);

/// <summary>The bus message: facts that one request delivered together.</summary>
public sealed record FactsReceived
{
    public required IReadOnlyList<Received> Entries { get; init; }
}

public enum EntryStatus { Received, Recorded, Duplicate, Conflict, Quarantined, Parked, Refused, Unknown }

/// <summary>What became of one fact.</summary>
public sealed record Outcome(Guid RecordId, EntryStatus Status, long? Position, string? Reason = null);
