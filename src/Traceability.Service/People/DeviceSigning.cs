using System.Security.Cryptography;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.People;

/// <summary>What a device signs with its own key: ECDSA P-256 with SHA-256, r and s in base64 (IEEE P1363).</summary>
public static class DeviceSigning
{
    /// <exception cref="FormatException">The signature or the key is not base64.</exception>
    /// <exception cref="CryptographicException">The key is none.</exception>
    public static bool FitsHash(string publicKey, ReadOnlySpan<byte> sha256, string signature)
    {
        using var key = ECDsa.Create();
        key.ImportSubjectPublicKeyInfo(Convert.FromBase64String(publicKey), out _);
        return key.VerifyHash(sha256, Convert.FromBase64String(signature), DSASignatureFormat.IeeeP1363FixedFieldConcatenation);
    }

    /// <summary>The signature that came with a fact, as its record keeps it; null where none came.</summary>
    /// <exception cref="FactShapeException">It does not fit, or the device has no key of its own.</exception>
    public static DeviceSignature? Checked(CloudEvent sent, Device device)
    {
        if (sent.DeviceSignature is not { } value) return null;
        if (device.PublicKey is not { } publicKey)
            throw new FactShapeException([new(DeviceSignature.Attribute, $"device {device.Id} has no key of its own, so nothing can be held against it", "Leave it out, or enroll the device with a code.")]);
        return FitsHash(publicKey, SHA256.HashData(DeviceSignature.Text(sent.ContentHash)), value) ? new(device.KeySha256()!, value)
            : throw new FactShapeException([new(DeviceSignature.Attribute, $"does not fit the fact and the key of device {device.Id}", "Sign the content hash of the event without this attribute, as docs/integrate.md says.")]);
    }
}
