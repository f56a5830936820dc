using System.Buffers;
using System.Runtime.InteropServices;
using System.Text.Json;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>
/// The records that bear on one unit up to a log position. It may hold too many; <see cref="Assemble"/> keeps what is
/// true. One format feeds assembling, judging, replay, the kiosk's offline bundle, the packet and the test fixtures.
/// </summary>
/// <param name="Time">The plant's clock, by whose days the records are judged.</param>
public sealed record Dossier(Subject Unit, long Position, IReadOnlyList<Record> Records, PlantTime Time)
{
    /// <summary>The dossier with one more record, as a kiosk judges a draft before it is committed.</summary>
    public Dossier With(Record draft) => this with { Records = [.. Records, draft] };

    /// <summary>Writes {"position":n,"records":[{"position":n,"record":{exact bytes}}],"timeZone":"Etc/GMT+5","unit":"unit:..."}.</summary>
    public byte[] Write()
    {
        var buffer = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteNumber("position", Position);
            json.WriteStartArray("records");
            foreach (var record in Records)
            {
                json.WriteStartObject();
                json.WriteNumber("position", record.Position);
                json.WritePropertyName("record");
                json.WriteRawValue(record.Bytes.Span, skipInputValidation: true);
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteString("timeZone", Time.Zone);
            json.WriteString("unit", Unit.Key);
            json.WriteEndObject();
        }

        return buffer.WrittenSpan.ToArray();
    }

    /// <param name="zone">The clock of a zone by its name.</param>
    /// <exception cref="JsonException">Not a dossier.</exception>
    public static Dossier Read(ReadOnlyMemory<byte> json, Func<string, PlantTime> zone)
    {
        using var document = JsonDocument.Parse(json);
        try
        {
            var root = document.RootElement;
            var records = root.GetProperty("records").EnumerateArray()
                .Select(item => Record.Read(JsonMarshal.GetRawUtf8Value(item.GetProperty("record")).ToArray(), item.GetProperty("position").GetInt64())).ToList();
            return new Dossier(Subject.Parse(root.GetProperty("unit").GetString() ?? ""), root.GetProperty("position").GetInt64(), records,
                zone(root.GetProperty("timeZone").GetString() ?? ""));
        }
        catch (Exception e) when (e is KeyNotFoundException or InvalidOperationException or FormatException)
        {
            throw new JsonException("the bytes are not a dossier: " + e.Message, e);
        }
    }
}
