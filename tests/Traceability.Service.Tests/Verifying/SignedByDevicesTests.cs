using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.Service.Log;
using Traceability.Verifier;
using DeviceSignature = Traceability.Core.Records.DeviceSignature;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Verifying;

/// <summary>The verifier holds what devices signed against the keys that the log says they were enrolled with.</summary>
public sealed class SignedByDevicesTests : IDisposable
{
    private const string Device = "k-1";
    private readonly SamplePacket _packet = new();
    private readonly ECDsa _key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
    private readonly ECDsa _other = ECDsa.Create(ECCurve.NamedCurves.nistP256);

    public void Dispose()
    {
        _packet.Dispose();
        _key.Dispose();
        _other.Dispose();
    }

    private (int Exit, string Said) Check(params byte[][] lines)
    {
        var checkpoint = new Checkpoint("plant.example/records", lines.Length, Merkle.Root(lines.Select(l => Merkle.LeafHash(l))));
        var log = _packet.Beside("log", [.. lines.SelectMany(l => l.Append((byte)'\n'))]);
        var note = _packet.Beside("note", Encoding.UTF8.GetBytes(checkpoint.Sign(_packet.Key)));
        using var output = new StringWriter();
        return (Command.Run(["--log", log, "--checkpoint", note, "--key", _packet.KeyFile()], output, output), output.ToString());
    }

    private static CloudEvent Event(string id, string source, string type, object data) => CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new { specversion = "1.0", id, source, type, time = "2026-03-02T09:30:00-05:00", data }));

    private static byte[] Written(CloudEvent sent, string device, DeviceSignature? signature = null) => Record.Write(sent, sent.RecordId, device, device == "service" ? "service" : "device-key", DateTimeOffset.UnixEpoch, DateTimeOffset.UnixEpoch, signature);

    private static string Sha256(ECDsa key) => Convert.ToHexStringLower(SHA256.HashData(key.ExportSubjectPublicKeyInfo()));

    private static byte[] Enrolled(ECDsa key, string source = "/service/decisions", string sender = "service", ECDsa? stated = null) => Written(Event("e-" + Sha256(key), source, "device.enrolled.v1",
        new { device = Device, roles = new[] { "form-crew" }, keySha256 = Sha256(key), publicKey = Convert.ToBase64String((stated ?? key).ExportSubjectPublicKeyInfo()) }), sender);

    private static readonly CloudEvent s_fact = Event("1", "/kiosk/k-1", "form.oiled.v1", new { form = "F-1", unit = "RF-0101", releaseAgent = "invented" });

    private static DeviceSignature Signed(ECDsa key, string content, ECDsa? named = null) =>
        new(Sha256(named ?? key), Convert.ToBase64String(key.SignData(Encoding.UTF8.GetBytes($"traceability fact v1\n{content}\n"), HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation)));

    private static void Says(int exit, string expected, (int Exit, string Said) answer)
    {
        Assert.True(exit == answer.Exit, answer.Said);
        Assert.Contains(expected, answer.Said, StringComparison.Ordinal);
    }

    [Fact]
    public void A_signature_that_fits_is_said_wherever_the_enrollment_stands()
    {
        Says(Command.Ok, "1 record signed by the device that sent it", Check(Enrolled(_key), Written(s_fact, Device, Signed(_key, s_fact.ContentHash))));
        Says(Command.Ok, "1 record signed by the device that sent it", Check(Written(s_fact, Device, Signed(_key, s_fact.ContentHash)), Enrolled(_key)));
    }

    [Fact]
    public void One_of_another_fact_of_another_key_or_of_another_device_is_wrong()
    {
        Says(Command.Failed, "does not fit", Check(Enrolled(_key), Written(s_fact, Device, Signed(_key, new string('0', 64)))));
        Says(Command.Failed, "does not fit", Check(Enrolled(_key), Written(s_fact, Device, Signed(_other, s_fact.ContentHash, named: _key))));
        Says(Command.Failed, "the key that signed it is of k-1", Check(Enrolled(_key), Written(s_fact, "k-2", Signed(_key, s_fact.ContentHash))));
        Says(Command.Failed, "is none", Check(Enrolled(_key), Written(s_fact, Device, new(Sha256(_key), "AAAA"))));
    }

    [Fact]
    public void A_key_that_no_enrollment_by_the_service_vouches_for_checks_nothing_and_that_is_said()
    {
        var signed = Written(s_fact, Device, Signed(_key, s_fact.ContentHash));
        const string said = "1 record signed by a device whose key is not here";
        Says(Command.Ok, said, Check(signed));
        Says(Command.Ok, said, Check(signed, Enrolled(_other)));
        Says(Command.Ok, said, Check(signed, Enrolled(_key, source: "/kiosk/k-1")));
        Says(Command.Ok, said, Check(signed, Enrolled(_key, sender: Device)));
        Says(Command.Ok, said, Check(signed, Enrolled(_key, stated: _other)));
    }

    [Fact]
    public void An_enrollment_of_an_earlier_version_has_the_hash_alone_and_one_with_the_key_takes_its_place()
    {
        var hashAlone = Written(Event("e-old", "/service/decisions", "device.enrolled.v1", new { device = Device, roles = new[] { "form-crew" }, keySha256 = Sha256(_key) }), "service");
        var signed = Written(s_fact, Device, Signed(_key, s_fact.ContentHash));
        var other = Event("2", "/kiosk/k-1", "form.oiled.v1", new { form = "F-1", unit = "RF-0101", releaseAgent = "invented" });
        Says(Command.Ok, "1 record signed by a device whose key is not here", Check(hashAlone, signed));
        Assert.DoesNotContain("without its signature", Check(hashAlone, signed, Written(other, Device)).Said, StringComparison.Ordinal);
        Says(Command.Ok, "1 record signed by the device that sent it", Check(hashAlone, Enrolled(_key), signed));
    }

    [Fact]
    public void What_a_device_with_a_key_sent_without_its_signature_is_said()
    {
        Says(Command.Ok, "1 record sent by k-1, which has a key of its own, without its signature", Check(Enrolled(_key), Written(s_fact, Device)));
        Assert.DoesNotContain("without its signature", Check(Written(s_fact, Device)).Said, StringComparison.Ordinal);
    }
}
