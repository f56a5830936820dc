using System.Globalization;
using System.Security.Cryptography;
using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Core.Records;

/// <summary>
/// A fact as sent: CloudEvents 1.0 in JSON structured mode. Extension attributes of ours: <c>person</c> (id of the signed-on
/// person), <c>clockoffsetms</c> (station clock minus service clock at the last sync, milliseconds), <c>deviceseq</c> and
/// <c>deviceprev</c> (a device's own numbering and the content hash of its previous entry), <c>assurance</c> (how the person signed on),
/// <c>devicesignature</c> (<see cref="Records.DeviceSignature"/>; no part of the content).
/// </summary>
public sealed record CloudEvent
{
    /// <summary>Largest accepted single event, bytes.</summary>
    public const int LargestBytes = 256 * 1024;

    /// <summary>Deepest nesting of an event; the record and the dossier around it nest further.</summary>
    public const int DeepestNesting = 32;

    /// <summary>Characters of an attribute.</summary>
    public const int LongestAttribute = 200;

    /// <summary>A station clock without power says 1970: the offset may be that large, and no time leaves the calendar by it.</summary>
    public const long LargestOffsetMs = 5_000_000_000_000;

    private const int LongestName = 40;

    public required string Id { get; init; }
    public required string Source { get; init; }
    public required string Type { get; init; }
    public required DateTimeOffset Time { get; init; }
    public string? SubjectText { get; init; }
    public string? Person { get; init; }
    public string? Assurance { get; init; }
    public long? ClockOffsetMs { get; init; }
    public long? DeviceSeq { get; init; }
    public string? DevicePrev { get; init; }
    public required JsonElement Data { get; init; }

    /// <summary>RFC 8785 form of the whole event: what is hashed and kept.</summary>
    public required ReadOnlyMemory<byte> Canonical { get; init; }

    /// <summary>SHA-256 of <see cref="Canonical"/>, lower-case hex.</summary>
    public required string ContentHash { get; init; }

    /// <summary>What the sending device signed of it, base64, as it came and not yet checked; null where it came without.</summary>
    public string? DeviceSignature { get; init; }

    public Guid RecordId => Records.RecordId.Of(Source, Id);

    /// <summary>Reads one event.</summary>
    /// <exception cref="FactShapeException">An attribute is missing or malformed; names it.</exception>
    /// <exception cref="CanonicalJsonException">The bytes are not JSON that has a canonical form.</exception>
    public static CloudEvent Read(ReadOnlySpan<byte> json)
    {
        if (json.Length > LargestBytes)
            throw new FactShapeException([new("event", $"must be at most {LargestBytes} bytes, it is {json.Length}", "Split it; attach documents by reference.")]);
        var (canonical, signature, problem) = Records.DeviceSignature.TakeOff(CanonicalJson.Canonicalize(json));
        return ReadCanonical(canonical, signature, problem);
    }

    /// <summary>Reads one event from bytes already in canonical form, as a record keeps them: without a device's signature.</summary>
    /// <exception cref="FactShapeException">An attribute is missing or malformed; names it.</exception>
    public static CloudEvent ReadCanonical(ReadOnlyMemory<byte> canonical) => ReadCanonical(canonical, null, null);

    private static CloudEvent ReadCanonical(ReadOnlyMemory<byte> canonical, string? signature, ShapeProblem? problem)
    {
        using var document = Parse(canonical);
        var root = document.RootElement;
        if (root.ValueKind != JsonValueKind.Object)
            throw new FactShapeException([new("event", "must be a JSON object", "Send one CloudEvents 1.0 event in JSON structured mode.")]);

        var read = new Attributes(root);
        if (read.Text("specversion", required: true) is not ("1.0" or null)) read.Problem("specversion", "must be \"1.0\"", "Send CloudEvents 1.0.");
        var id = read.Text("id", required: true);
        var source = read.Text("source", required: true);
        if (source is not null && source.Any(char.IsWhiteSpace)) read.Problem("source", "must be a URI reference without spaces", "Name the station, for example /plant/cage-1.");
        var type = read.Text("type", required: true);
        var time = read.Text("time", required: true);
        DateTimeOffset at = default;
        if (time is not null && !Rfc3339.TryRead(time, out at)) read.Problem("time", Rfc3339.Limit, "Never send a bare local time.");
        if (read.Text("datacontenttype") is { } content && !content.StartsWith("application/json", StringComparison.Ordinal))
            read.Problem("datacontenttype", "must be application/json", "Send the content as JSON.");
        var person = read.Text("person");
        if (person is not null && !Subject.IsId(person, "person")) read.Problem("person", "must be the identity of a person without outer spaces", "Send the id of the signed-on person.");
        var offset = read.Number("clockoffsetms");
        if (offset is < -LargestOffsetMs or > LargestOffsetMs) read.Problem("clockoffsetms", $"must be {-LargestOffsetMs} to {LargestOffsetMs} milliseconds", "Send station clock minus service clock.");
        read.CheckOthers();
        if (!root.TryGetProperty("data", out var data)) read.Problem("data", "is required", "Send the content of the fact.");
        else if (HoldsNul(canonical.Span, data)) read.Problem("data", "must not hold the character NUL in any text", "Remove it.");
        var seq = read.Number("deviceseq");
        var prev = read.Text("deviceprev");
        var assurance = read.Text("assurance");
        var subject = read.Text("subject");
        if (problem is not null) read.Problems.Add(problem);
        if (read.Problems.Count > 0) throw new FactShapeException(read.Problems);
        return new CloudEvent
        {
            Id = id!,
            Source = source!,
            Type = type!,
            Time = at,
            SubjectText = subject,
            Person = person,
            Assurance = assurance,
            ClockOffsetMs = offset,
            DeviceSeq = seq,
            DevicePrev = prev,
            Data = data.Clone(),
            Canonical = canonical,
            DeviceSignature = signature,
            ContentHash = Convert.ToHexStringLower(SHA256.HashData(canonical.Span)),
        };
    }

    private static JsonDocument Parse(ReadOnlyMemory<byte> canonical)
    {
        try
        {
            return JsonDocument.Parse(canonical, new JsonDocumentOptions { MaxDepth = DeepestNesting });
        }
        catch (JsonException)
        {
            throw new FactShapeException([new("event", $"must be JSON nested at most {DeepestNesting} deep", "Compare it with the schema of its type.")]);
        }
    }

    // PostgreSQL's jsonb cannot hold it, so no store of ours may be asked to. Looked for only where the canonical bytes show its escape.
    private static bool HoldsNul(ReadOnlySpan<byte> canonical, JsonElement value)
    {
        return canonical.IndexOf("\\u0000"u8) >= 0 && In(value);

        static bool In(JsonElement element) => element.ValueKind switch
        {
            JsonValueKind.String => element.GetString()!.Contains('\0', StringComparison.Ordinal),
            JsonValueKind.Array => element.EnumerateArray().Any(In),
            JsonValueKind.Object => element.EnumerateObject().Any(p => p.Name.Contains('\0', StringComparison.Ordinal) || In(p.Value)),
            _ => false,
        };
    }

    /// <summary>The attributes of one event and what is wrong with them.</summary>
    private sealed class Attributes(JsonElement root)
    {
        public List<ShapeProblem> Problems { get; } = [];

        public void Problem(string name, string limit, string remedy) => Problems.Add(new(name, limit, remedy));

        public string? Text(string name, bool required = false)
        {
            if (!root.TryGetProperty(name, out var value) || value.ValueKind == JsonValueKind.Null)
            {
                if (required) Problem(name, "is required by CloudEvents 1.0 and by this service", "Send it as a non-empty text.");
                return null;
            }

            if (value.ValueKind == JsonValueKind.String && value.GetString() is { Length: > 0 and <= LongestAttribute } text && !text.Any(char.IsControl)) return text;
            Problem(name, $"must be a text of 1 to {LongestAttribute} characters without control characters", "Send it as a text.");
            return null;
        }

        public long? Number(string name)
        {
            if (!root.TryGetProperty(name, out var value) || value.ValueKind == JsonValueKind.Null) return null;
            if (value.ValueKind == JsonValueKind.Number && value.TryGetInt64(out var number)) return number;
            if (value.ValueKind == JsonValueKind.String && long.TryParse(value.GetString(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out number)) return number;
            Problem(name, "must be a whole number", "Send an integer.");
            return null;
        }

        /// <summary>Extension attributes that are not ours are kept as they are; their form is that of CloudEvents 1.0, section 3.1.</summary>
        public void CheckOthers()
        {
            foreach (var attribute in root.EnumerateObject())
            {
                var name = attribute.Name;
                if (name == "data" || Problems.Exists(p => p.Field == name)) continue;
                if (name.Length is 0 or > LongestName || !name.All(c => char.IsAsciiLetterLower(c) || char.IsAsciiDigit(c)))
                    Problem(name.Length switch { 0 => "an attribute without a name", <= LongestName => name, _ => name[..LongestName] + "..." }, $"must be named with 1 to {LongestName} lower-case letters and digits", "Put the content of the fact into data.");
                else if (attribute.Value.ValueKind is JsonValueKind.Object or JsonValueKind.Array)
                    Problem(name, "must be a text, a number or a boolean", "Put the content of the fact into data.");
                else if (attribute.Value.ValueKind == JsonValueKind.String && attribute.Value.GetString()!.Any(char.IsControl))
                    Problem(name, "must not hold control characters", "Remove them.");
                if (Problems.Count > 20) return;
            }
        }
    }
}
