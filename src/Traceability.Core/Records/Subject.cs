using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Core.Records;

/// <summary>
/// What a record is about or names: a kind and the plant's own identity for it, written "kind:id", for example
/// "unit:RF-0101" or "lot:Mill A/778812". The written form is the stream key, the link key and the CloudEvents subject.
/// </summary>
[JsonConverter(typeof(SubjectJson))]
public readonly record struct Subject : IComparable<Subject>
{
    public const int LongestKey = 120;

    public Subject(string kind, string id)
    {
        if (!IsKind(kind)) throw new ArgumentException($"'{kind}' is not a subject kind", nameof(kind));
        if (!IsId(id, kind)) throw new ArgumentException($"'{id}' is not an identity: 1 to {LongestKey} characters together with the kind, no control characters, no space at either end", nameof(id));
        Key = kind + ":" + id;
    }

    private Subject(string key) => Key = key;

    /// <summary>The written form, "kind:id".</summary>
    public string Key { get; }

    public string Kind => Key[..Key.IndexOf(':', StringComparison.Ordinal)];

    public string Id => Key[(Key.IndexOf(':', StringComparison.Ordinal) + 1)..];

    public static Subject Unit(string id) => new("unit", id);
    public static Subject Cage(string id) => new("cage", id);
    public static Subject Form(string id) => new("form", id);
    public static Subject Lot(string producer, string number) => new("lot", producer + "/" + number);
    public static Subject Batch(string plant, string ticket, DateOnly date) => new("batch", string.Create(CultureInfo.InvariantCulture, $"{plant}/{ticket}/{date:yyyy-MM-dd}"));
    public static Subject Sample(string id) => new("sample", id);
    public static Subject Pour(string id) => new("pour", id);
    public static Subject Person(string id) => new("person", id);
    /// <summary>A person's account: roles and secrets. No link leads to it, so that it comes into no unit's records.</summary>
    public static Subject Account(string person) => new("account", person);

    public static Subject Device(string id) => new("device", id);
    public static Subject Instrument(string id) => new("instrument", id);
    public static Subject Drawing(string id) => new("drawing", id);
    public static Subject Mix(string id) => new("mix", id);
    public static Subject Contract(string id) => new("contract", id);
    public static Subject Profile(string id, int version) => new("profile", string.Create(CultureInfo.InvariantCulture, $"{id}@{version}"));

    public static Subject Storage(string id) => new("storage", id);
    public static Subject SamplingLot(string id) => new("samplinglot", id);
    public static Subject Core(string id) => new("core", id);
    public static Subject Nonconformance(string id) => new("nonconformance", id);
    public static Subject Delivery(string id) => new("delivery", id);
    public static Subject Packet(string id) => new("packet", id);
    public static Subject Plant(string id) => new("plant", id);
    public static Subject Source(string producer) => new("source", producer);

    /// <summary>A record as a subject: what a correction or a withdrawal is about.</summary>
    public static Subject Record(Guid id) => new("record", id.ToString("D"));

    public static bool TryParse(string? key, out Subject subject)
    {
        subject = default;
        if (key is null) return false;
        var colon = key.IndexOf(':', StringComparison.Ordinal);
        if (colon <= 0 || !IsKind(key[..colon]) || !IsId(key[(colon + 1)..], key[..colon])) return false;
        subject = new Subject(key);
        return true;
    }

    /// <exception cref="FormatException">The text is not "kind:id".</exception>
    public static Subject Parse(string key) =>
        TryParse(key, out var subject) ? subject : throw new FormatException($"'{key}' is not a subject: write kind:id, for example unit:RF-0101");

    /// <summary>Whether the text can be the identity part of a subject of this kind.</summary>
    public static bool IsId(string? id, string kind)
    {
        if (string.IsNullOrEmpty(id) || kind.Length + 1 + id.Length > LongestKey || id[0] == ' ' || id[^1] == ' ') return false;
        foreach (var c in id)
        {
            if (char.IsControl(c) || char.IsSurrogate(c)) return false;
        }
        return true;
    }

    /// <summary>
    /// The first character of an identity that is not printable ASCII; null when all are. Many such look like another: "RF‑1" with a non-breaking hyphen would be
    /// another unit than "RF-1". Asked where identities come in; what was recorded before stays as it is.
    /// </summary>
    public static Rune? NotPrintable(string id) => id.EnumerateRunes().FirstOrDefault(r => r.Value is < 0x20 or > 0x7E) is { Value: not 0 } rune ? rune : null;

    private static bool IsKind(string kind)
    {
        if (kind.Length is 0 or > 20) return false;
        foreach (var c in kind)
        {
            if (c is not (>= 'a' and <= 'z')) return false;
        }
        return true;
    }

    public int CompareTo(Subject other) => string.CompareOrdinal(Key, other.Key);

    public override string ToString() => Key;
}

internal sealed class SubjectJson : JsonConverter<Subject>
{
    public override Subject Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        reader.TokenType == JsonTokenType.String && Subject.TryParse(reader.GetString(), out var subject)
            ? subject
            : throw new JsonException("a subject is written kind:id, for example \"unit:RF-0101\"");

    public override void Write(Utf8JsonWriter writer, Subject value, JsonSerializerOptions options) => writer.WriteStringValue(value.Key);
}
