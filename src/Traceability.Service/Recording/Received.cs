using Traceability.Core.Records;

namespace Traceability.Service.Recording;

/// <summary>One fact as intake hands it over: its canonical bytes and what intake knows of its delivery.</summary>
/// <param name="Canonical">RFC 8785 form of the CloudEvent.</param>
/// <param name="Quarantine">Why it may not count yet; null when it may.</param>
/// <param name="WaitsFor">Whom a fact that was set apart waits for.</param>
/// <param name="Signature">What its device signed of it, checked by intake; null where it came without.</param>
/// <param name="TraceParent">W3C trace context of the request, so that one trace follows a fact from intake to its unit's row.</param>
public sealed record Received(byte[] Canonical, string Device, string Assurance, DateTimeOffset ReceivedAt, string? Quarantine = null, string? TraceParent = null, WaitsFor WaitsFor = WaitsFor.Administrator, DeviceSignature? Signature = null);

/// <summary>The bus message: facts that one request delivered together.</summary>
public sealed record FactsReceived
{
    public required IReadOnlyList<Received> Entries { get; init; }
}

/// <summary>Whom a fact that was set apart waits for.</summary>
public enum WaitsFor
{
    /// <summary>It may not count as it came: an administrator looks at it.</summary>
    Administrator,

    /// <summary>A claim: an act without proof of its person, who confirms it.</summary>
    Person,

    /// <summary>What it turns is judged first.</summary>
    Weighing,

    /// <summary>The record that it changes has not come yet.</summary>
    Record,

    /// <summary>It turns a finding for the better: a second person approves it.</summary>
    Second,
}

public enum EntryStatus { Received, Recorded, Duplicate, Conflict, Quarantined, Parked, Refused, Unknown, Claimed, Weighing, Early, Approval }

/// <summary>What became of one fact.</summary>
public sealed record Outcome(Guid RecordId, EntryStatus Status, long? Position, string? Reason = null);
