using System.Security.Cryptography;
using System.Text;
using System.Text.Json;

namespace Traceability.Verifier;

/// <summary>What a device signed of a fact, as its record keeps it.</summary>
/// <param name="Key">SHA-256 of the key it names, lower-case hex.</param>
/// <param name="Value">r and s, 32 bytes each.</param>
/// <param name="Content">SHA-256 of the fact, lower-case hex: what was signed.</param>
internal sealed record DeviceSignature(string Key, byte[] Value, string Content)
{
    /// <returns>Null where it is none.</returns>
    internal static DeviceSignature? Read(JsonElement signature, string content) =>
        Texts.Text(signature, "key") is { Length: 64 } key && Texts.Text(signature, "value") is { Length: 88 } text && SignedText.Base64(text) is { Length: 64 } value
            ? new DeviceSignature(key, value, content) : null;

    internal bool FitsKey(byte[] publicKey)
    {
        using var key = ECDsa.Create();
        try
        {
            key.ImportSubjectPublicKeyInfo(publicKey, out _);
        }
        catch (CryptographicException)
        {
            // The bytes are no point of the curve.
            return false;
        }

        return key.VerifyData(Encoding.UTF8.GetBytes($"traceability fact v1\n{Content}\n"), Value, HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation);
    }
}

/// <summary>A device's key, as the service recorded when the device was enrolled.</summary>
/// <param name="PublicKey">SubjectPublicKeyInfo; null where the record has the hash alone, as those of earlier versions do.</param>
internal sealed record EnrolledKey(string Device, string Sha256, byte[]? PublicKey)
{
    // SubjectPublicKeyInfo of an uncompressed point of P-256 (RFC 5480).
    private static readonly byte[] s_p256 = Convert.FromHexString("3059301306072a8648ce3d020106082a8648ce3d030107034200");

    private const int Length = 91;

    /// <returns>Null where the record is none of an enrolment by the service itself: a station cannot send one.</returns>
    internal static EnrolledKey? Read(JsonElement record, JsonElement fact)
    {
        var data = Texts.Member(fact, "data");
        if (Texts.Text(fact, "type") != "device.enrolled.v1" || Texts.Text(fact, "source") != "/service/decisions" || Texts.Text(record, "device") != "service"
            || Texts.Text(data, "device") is not { } device || Texts.Text(data, "keySha256") is not { } sha256)
        {
            return null;
        }

        var key = Texts.Text(data, "publicKey") is { } text ? SignedText.Base64(text) : null;
        var whole = key is { Length: Length } && key.AsSpan().StartsWith(s_p256) && Convert.ToHexStringLower(SHA256.HashData(key)) == sha256;
        return new EnrolledKey(device, sha256, whole ? key : null);
    }
}

/// <summary>
/// Holds what devices signed against the keys that the log says they were enrolled with. A signature that does not fit is wrong;
/// one whose enrolment is not here, and a record of such a device that came without, are said.
/// </summary>
internal sealed class DeviceSignatures
{
    private readonly Dictionary<string, EnrolledKey> _keys = new(StringComparer.Ordinal);
    private readonly List<RecordLine> _signed = [];
    private readonly Dictionary<string, int> _unsigned = new(StringComparer.Ordinal);

    internal void Add(RecordLine line)
    {
        if (line.Enrolled is { } enrolled)
        {
            if (_keys.GetValueOrDefault(enrolled.Sha256)?.PublicKey is null)
            {
                _keys[enrolled.Sha256] = enrolled;
            }
        }

        if (line.Signature is not null)
        {
            _signed.Add(line);
        }
        else if (line.Device is { } device)
        {
            _unsigned[device] = _unsigned.GetValueOrDefault(device) + 1;
        }
    }

    /// <summary>Says nothing where no device signed anything and none was enrolled with a key.</summary>
    internal void Check(string file, Report report)
    {
        var known = _signed.Where(l => _keys.GetValueOrDefault(l.Signature!.Key)?.PublicKey is not null).ToList();
        if (known.Count > 0)
        {
            report.Check($"{Many(known.Count, "record")} signed by the device that sent {(known.Count == 1 ? "it" : "them")}, with a key whose enrollment is in the log", () =>
            {
                foreach (var line in known)
                {
                    var key = _keys[line.Signature!.Key];
                    if (key.Device != line.Device)
                    {
                        report.Wrong(file, $"{line.Name}: it was sent by {line.Device}, and the key that signed it is of {key.Device}.", line.Number, line.Id);
                    }
                    else if (!line.Signature.FitsKey(key.PublicKey!))
                    {
                        report.Wrong(file, $"{line.Name}: the signature of {key.Device} does not fit it.", line.Number, line.Id);
                    }
                }
            });
        }

        if (_signed.Count > known.Count)
        {
            report.Remarks.Add($"{Many(_signed.Count - known.Count, "record")} signed by a device whose key is not here: {(_signed.Count - known.Count == 1 ? "its signature was" : "their signatures were")} not checked. Ask the plant for the record of the device's enrollment, with the key in it; of a device enrolled by an earlier version it has the key's hash alone.");
        }

        foreach (var device in _keys.Values.Where(k => k.PublicKey is not null).Select(k => k.Device).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal))
        {
            if (_unsigned.TryGetValue(device, out var count))
            {
                report.Remarks.Add($"{Many(count, "record")} sent by {device}, which has a key of its own, without its signature. Ask the plant why.");
            }
        }
    }

    private static string Many(int count, string what) => count == 1 ? $"1 {what}" : $"{count} {what}s";
}
