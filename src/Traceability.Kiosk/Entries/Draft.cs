using System.Buffers;
using System.Globalization;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Kiosk.Device;
using Traceability.Kiosk.People;

namespace Traceability.Kiosk.Entries;

/// <summary>A fact as it would be recorded: what is judged before a person commits it, and what is committed after.</summary>
public sealed class Draft
{
    private readonly DeviceIdentity _device;

    private Draft(IFact fact, DeviceIdentity device, ClockOffset? clock, SignedOn person, string id, DateTimeOffset at)
    {
        Fact = fact;
        _device = device;
        Event = CloudEvent.Read(Write(fact, device, clock, person, id, at));
        Record = AsRecord(Event, device.DeviceId);
    }

    public IFact Fact { get; }

    public CloudEvent Event { get; }

    /// <summary>The record it would become, at position 0.</summary>
    public Record Record { get; }

    /// <summary>The device's sequence this draft follows on.</summary>
    public long Follows => _device.Sequence;

    public static Draft Of(IFact fact, DeviceIdentity device, ClockOffset? clock, SignedOn person, DateTimeOffset at) =>
        new(fact, device, clock, person, Guid.NewGuid().ToString("D"), at);

    /// <summary>The same fact of the same moment after another entry took its place in the sequence.</summary>
    public Draft Following(DeviceIdentity device, ClockOffset? clock, SignedOn person) => new(Fact, device, clock, person, Event.Id, Event.Time);

    /// <summary>A record for judging here, from an event that the service has not recorded yet.</summary>
    public static Record AsRecord(CloudEvent sent, string deviceId) =>
        Record.Read(Record.Write(sent, sent.RecordId, deviceId, "device-key", sent.Time, sent.Time), position: 0);

    private static byte[] Write(IFact fact, DeviceIdentity device, ClockOffset? clock, SignedOn person, string id, DateTimeOffset at)
    {
        var buffer = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteString("specversion", "1.0");
            json.WriteString("id", id);
            json.WriteString("source", device.Source);
            json.WriteString("type", FactCatalog.Of(fact).Type);
            json.WriteString("subject", fact.About.Key);
            json.WriteString("time", at.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture));
            json.WriteString("datacontenttype", "application/json");
            json.WriteString("person", person.Person);
            json.WriteString("assurance", person.Assurance);
            if (clock is not null) json.WriteNumber("clockoffsetms", clock.OffsetMs);
            json.WriteNumber("deviceseq", device.Sequence + 1);
            if (device.Previous is not null) json.WriteString("deviceprev", device.Previous);
            json.WritePropertyName("data");
            FactCatalog.Write(fact).WriteTo(json);
            json.WriteEndObject();
        }

        return buffer.WrittenSpan.ToArray();
    }
}
