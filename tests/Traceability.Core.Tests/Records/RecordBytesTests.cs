using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.Core.Tests.Events;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Records;

/// <summary>
/// The bytes, ids and hashes that stand in logs and packets. They may not change. The expected ids and hashes were
/// calculated with another language's standard library from the text of the record alone.
/// </summary>
public class RecordBytesTests
{
    private static readonly CloudEvent s_sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(FactSchemaTests.Envelope("form.oiled.v1", Golden.Data("form.oiled.v1", "complete"))));

    private static readonly byte[] s_record = Record.Write(s_sent, s_sent.RecordId, "cage-1", "device-key",
        new DateTimeOffset(2026, 3, 2, 14, 30, 1, 250, TimeSpan.Zero), new DateTimeOffset(2026, 3, 2, 9, 30, 2, TimeSpan.FromHours(-5)).AddTicks(1234567));

    [Fact]
    public void The_bytes_of_a_record_are_frozen()
    {
        Assert.Equal(
            """
            {"assurance":"device-key","device":"cage-1","fact":{"assurance":"pin","clockoffsetms":120,"data":{"form":"F-3","releaseAgent":"Water-based emulsion","unit":"RF-0101"},"datacontenttype":"application/json","deviceprev":"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08","deviceseq":42,"id":"cage-1-00042","person":"p-017","source":"/plant/cage-1","specversion":"1.0","time":"2026-03-02T09:30:00-05:00","type":"form.oiled.v1"},"id":"bd1de854-4509-5460-951c-dc5d7262a80c","receivedAt":"2026-03-02T14:30:01.250000Z","recordedAt":"2026-03-02T14:30:02.123456Z"}
            """,
            Encoding.UTF8.GetString(s_record));
    }

    [Fact]
    public void What_the_device_signed_stands_last_and_is_no_part_of_the_fact()
    {
        var value = Convert.ToBase64String([.. Enumerable.Range(0, 64).Select(i => (byte)i)]);
        var sent = CloudEvent.Read(Encoding.UTF8.GetBytes($"{{\"devicesignature\":\"{value}\",{Encoding.UTF8.GetString(s_sent.Canonical.Span)[1..]}"));
        Assert.Equal((s_sent.ContentHash, value), (sent.ContentHash, sent.DeviceSignature));

        var bytes = Record.Write(sent, sent.RecordId, "cage-1", "device-key", sent.Time, sent.Time, new DeviceSignature("9f86", value));
        Assert.EndsWith($$$""","recordedAt":"2026-03-02T14:30:00.000000Z","signature":{"key":"9f86","value":"{{{value}}}"}}""", Encoding.UTF8.GetString(bytes), StringComparison.Ordinal);
        Assert.Equal(CanonicalJson.Canonicalize(bytes), bytes);
        Assert.Equal(new DeviceSignature("9f86", value), Record.Read(bytes, 1).Signature);
        Assert.Null(Record.Read(s_record, 1).Signature);
    }

    [Theory]
    [InlineData("\"\"")]
    [InlineData("\"AAAA\"")]
    [InlineData("12")]
    [InlineData("{}")]
    [InlineData("\"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAB==\"")]
    public void A_device_signature_that_is_none_is_named(string value)
    {
        var refused = Assert.Throws<Traceability.Core.Events.FactShapeException>(() => CloudEvent.Read(Encoding.UTF8.GetBytes($"{{\"devicesignature\":{value},{Encoding.UTF8.GetString(s_sent.Canonical.Span)[1..]}")));
        Assert.Equal("devicesignature", Assert.Single(refused.Problems).Field);
    }

    [Fact]
    public void A_device_signature_is_taken_off_wherever_it_stands_and_only_from_the_event_itself()
    {
        var value = Convert.ToBase64String(new byte[64]);
        foreach (var others in (string[])["", ",\"aaa\":\"1\"", ",\"zzz\":\"1\"", ",\"aaa\":\"1\",\"zzz\":\"1\""])
        {
            var text = $"{{\"specversion\":\"1.0\",\"id\":\"1\",\"source\":\"/a\",\"type\":\"any.v1\",\"time\":\"2026-03-02T09:30:00-05:00\",\"data\":{{\"devicesignature\":\"kept\"}}{others}";
            var without = CloudEvent.Read(Encoding.UTF8.GetBytes(text + "}"));
            var signed = CloudEvent.Read(Encoding.UTF8.GetBytes($"{text},\"devicesignature\":\"{value}\"}}"));
            Assert.Equal((without.ContentHash, null, value), (signed.ContentHash, without.DeviceSignature, signed.DeviceSignature));
            Assert.Equal("kept", signed.Data.GetProperty("devicesignature").GetString());
            Assert.Equal(without.ContentHash, CloudEvent.Read(Encoding.UTF8.GetBytes($"{text},\"devicesignature\":null}}")).ContentHash);
        }

        // Alone it leaves an event without a member behind.
        Assert.Throws<Traceability.Core.Events.FactShapeException>(() => CloudEvent.Read(Encoding.UTF8.GetBytes($"{{\"devicesignature\":\"{value}\"}}")));
    }

    [Fact]
    public void Its_id_content_hash_and_leaf_are_frozen()
    {
        Assert.Equal("bd1de854-4509-5460-951c-dc5d7262a80c", s_sent.RecordId.ToString("D"));
        Assert.Equal("26168481e0e5aa254ee923cc533bb63ee8a2d793d2a1109d1239ffb823790493", s_sent.ContentHash);
        Assert.Equal("9e903f9c84582f428d0996672f1fe7e7b50b1adda1dc0f4d1df976e51a77433a", Convert.ToHexStringLower(Record.LeafHash(s_record)));
        Assert.Equal("9268ea55-bccc-5c7a-9104-3e9e9c0082c9", RecordId.OfConflict(s_sent.Source, s_sent.Id, s_sent.ContentHash).ToString("D"));
    }

    [Fact]
    public void Hash_and_leaf_are_the_plain_ones_of_their_bytes()
    {
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(s_sent.Canonical.Span)), s_sent.ContentHash);
        Assert.Equal(SHA256.HashData([0, .. s_record]), Record.LeafHash(s_record));
    }

    [Fact]
    public void A_record_read_back_is_what_was_written()
    {
        var read = Record.Read(s_record, 7);

        Assert.Equal((s_sent.RecordId, 7L, "cage-1", "device-key"), (read.Id, read.Position, read.Device, read.Assurance));
        Assert.Equal(s_sent.Canonical.ToArray(), read.Sent.Canonical.ToArray());
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 14, 30, 2, TimeSpan.Zero).AddTicks(1234560), read.RecordedAt);
        Assert.Equal(s_record, read.Bytes.ToArray());
        Assert.False(read.IsConflict);
    }

    [Fact]
    public void The_second_content_under_one_id_is_about_the_first()
    {
        var second = Record.Read(Record.Write(s_sent, RecordId.OfConflict(s_sent.Source, s_sent.Id, s_sent.ContentHash), "d", "intake", s_sent.Time, s_sent.Time), 1);

        Assert.True(second.IsConflict);
        Assert.Contains(second.Links(), l => l.From == Subject.Record(s_sent.RecordId));
    }

    [Fact]
    public void Source_and_id_are_never_confused()
    {
        // The separator cannot stand in either, so no two pairs share a name.
        Assert.Throws<Core.Events.FactShapeException>(() => CloudEvent.Read(Encoding.UTF8.GetBytes("""{"specversion":"1.0","id":"1","source":"/a\n2","type":"x.v1","time":"2026-03-02T09:30:00Z","data":{}}""")));
        Assert.NotEqual(RecordId.Of("/a", "b"), RecordId.Of("/ab", ""));
    }
}
