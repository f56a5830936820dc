using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Core.Events;

namespace Traceability.Core.Records;

/// <summary>
/// What a device signed of one fact with its own key, kept with the record so that a third party can check it: ECDSA P-256 with
/// SHA-256 over <see cref="Text"/>. It travels as the attribute <see cref="Attribute"/> of the event and is no part of its content:
/// the same fact signed twice is one fact.
/// </summary>
/// <param name="Key">SHA-256 of the device's public key (SubjectPublicKeyInfo), lower-case hex.</param>
/// <param name="Value">Base64 of r and s, 32 bytes each (IEEE P1363).</param>
public sealed partial record DeviceSignature(string Key, string Value)
{
    /// <summary>The CloudEvents extension attribute that carries it.</summary>
    public const string Attribute = "devicesignature";

    /// <summary>Form of <see cref="Value"/> as a regular expression: 64 bytes in base64, whose last bits are zero, so that one signature has one text.</summary>
    public const string Pattern = "^[A-Za-z0-9+/]{85}[AQgw]==$";

    /// <summary>The bytes that are signed. Their first line keeps them apart from anything else the key signs.</summary>
    public static byte[] Text(string contentHash) => Encoding.UTF8.GetBytes($"traceability fact v1\n{contentHash}\n");

    /// <summary>Takes the attribute off an event in canonical form.</summary>
    /// <returns>The event without it, still canonical; the signature, if there is one; what is wrong with it.</returns>
    internal static (ReadOnlyMemory<byte> Canonical, string? Value, ShapeProblem? Problem) TakeOff(ReadOnlyMemory<byte> canonical)
    {
        // In canonical form nothing stands between the quotes, the colon and the value, so an event without it is told at once.
        if (canonical.Span.IndexOf("\"devicesignature\":"u8) < 0) return (canonical, null, null);
        var reader = new Utf8JsonReader(canonical.Span, new JsonReaderOptions { MaxDepth = CanonicalJson.MaxDepth });
        if (!reader.Read() || reader.TokenType != JsonTokenType.StartObject) return (canonical, null, null);
        while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
        {
            var from = (int)reader.TokenStartIndex;
            var mine = reader.ValueTextEquals(Attribute);
            reader.Read();
            var value = mine && reader.TokenType == JsonTokenType.String ? reader.GetString() : null;
            var absent = reader.TokenType == JsonTokenType.Null;
            reader.Skip();
            if (!mine) continue;
            var through = (int)reader.BytesConsumed;
            // One comma goes with it: the one behind, or in front where it is the last.
            if (canonical.Span[through] == (byte)',') through++;
            else if (canonical.Span[from - 1] == (byte)',') from--;
            var rest = new byte[canonical.Length - (through - from)];
            canonical.Span[..from].CopyTo(rest);
            canonical.Span[through..].CopyTo(rest.AsSpan(from));
            return (rest, value, absent || IsWhole(value) ? null : new(Attribute, "must be base64 of 64 bytes: r and s of an ECDSA P-256 signature", "Sign the content hash as docs/integrate.md says, or leave it out."));
        }

        return (canonical, null, null);
    }

    private static bool IsWhole(string? value) => value is { Length: 88 } && Form().IsMatch(value);

    [GeneratedRegex(Pattern)]
    private static partial Regex Form();
}
