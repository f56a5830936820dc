using System.Text.Json.Serialization;

namespace Traceability.Kiosk.Entries;

/// <summary>Where an entry is on its way into the plant's log.</summary>
[JsonConverter(typeof(JsonStringEnumConverter<EntryState>))]
public enum EntryState
{
    /// <summary>Only in this kiosk's store.</summary>
    SavedHere,
    /// <summary>The service has it, but has not written it into the log yet.</summary>
    Received,
    /// <summary>In the log, under the content hash this kiosk computed.</summary>
    Recorded,
    /// <summary>Under a signed checkpoint.</summary>
    Sealed,
    /// <summary>Another content is recorded under the same id.</summary>
    Conflict,
    /// <summary>Held back until an administrator clears it; it does not count until then.</summary>
    Quarantined,
    /// <summary>Set aside by the service because writing it failed.</summary>
    Parked,
    /// <summary>The service cannot read it.</summary>
    Refused,
}

/// <summary>One fact recorded at this kiosk.</summary>
/// <param name="Sequence">The device's own numbering, from 1.</param>
/// <param name="Text">The exact canonical bytes as text; null once they are safe in the log and only this line is kept.</param>
/// <param name="NotMet">How many findings were not met or missing when it was recorded, as judged here.</param>
public sealed record OutboxEntry(
    long Sequence, string Id, string Source, string RecordId, string ContentHash, string Type, string Unit, string Title, string Person, DateTimeOffset At,
    string? Text, int NotMet, EntryState State = EntryState.SavedHere, string? Problem = null, long? Position = null)
{
    /// <summary>Whether a person has to do something before it counts.</summary>
    public bool NeedsAction => State is EntryState.Conflict or EntryState.Quarantined or EntryState.Parked or EntryState.Refused;

    /// <summary>Whether it should be sent: it is only here, or the service may have lost it on its way.</summary>
    public bool Waits => State == EntryState.SavedHere;
}
